"""When each round runs."""
