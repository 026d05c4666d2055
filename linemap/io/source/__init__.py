"""Files as they come: bytes, containers, delimited text, workbooks, vector layers."""
