"""What was published, kept."""
