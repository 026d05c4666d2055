"""What a crew can work next: holds, tickets, material, access and travel, and where it stands."""
