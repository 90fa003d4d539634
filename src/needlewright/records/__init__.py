"""What was done: jobs, runs, readings and papers, kept so that nothing finished is lost."""
