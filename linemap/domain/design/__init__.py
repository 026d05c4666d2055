"""What is designed: lines, structures, their numbers and revisions, crossings, tolerances."""
