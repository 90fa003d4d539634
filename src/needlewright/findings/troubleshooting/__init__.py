"""From a complaint and answers to causes with probabilities, and to the next test worth doing."""
