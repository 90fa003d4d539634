"""Which fault the rows of a run show: competing models of the error, weighed against each other."""
