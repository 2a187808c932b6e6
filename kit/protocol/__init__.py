"""What is measured, how, and the readings themselves."""
