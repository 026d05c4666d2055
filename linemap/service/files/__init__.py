"""Files taken into a job: read, understood, kept and reported."""
