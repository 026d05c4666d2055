"""What was surveyed: shots and their structures, set poles, orientation, plumb, what a survey can prove."""
