"""What each sum asks, what it answers in words, and how far it is good."""
