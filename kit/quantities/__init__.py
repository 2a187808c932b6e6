"""Units, written entries, formatting and the errors every layer raises."""
