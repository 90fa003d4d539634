"""How things wear out: Weibull's law, what a shop's returns say of it, and when to replace."""
