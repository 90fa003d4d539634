"""As found and as left judged by the rule; what a certificate says and whether it may be issued."""
