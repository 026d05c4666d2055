"""Readers of the owner's design lists.

All readers take a table as `read_source` gives it. `projection` is the job's: coordinates end up in it and
lengths in its unit, as in `unit` where there are no coordinates. `line_default` is the line of rows that name
none, and `order` how dates such as 5/6/2026 are meant where a column does not tell. Each refuses a file with
every row that is wrong and cannot be left out, and gives what it read in file order.
"""
