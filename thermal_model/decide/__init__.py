"""What a tester publishes and a designer decides on: why, elsewhere, what to run next, is a claim kept."""
