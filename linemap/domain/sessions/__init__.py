"""What the shots of one file and day share: one adjustment of frames and check-ins."""
