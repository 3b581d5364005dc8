"""What results say, write and draw."""
