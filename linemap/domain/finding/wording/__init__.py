"""What each code of a finding says: the one place of their wordings, parted by what they are about."""
