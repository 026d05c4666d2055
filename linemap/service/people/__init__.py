"""Who may see what: people, their devices, and the view each role gets."""
