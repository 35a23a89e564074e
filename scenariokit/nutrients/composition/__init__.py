"""What salts, labels and solutions hold."""
