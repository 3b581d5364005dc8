"""Scripts that print accuracies and ratios."""
