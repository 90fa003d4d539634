"""What was done: jobs, runs, readings and papers, kept so that nothing finished is lost.

The functions that the command line and the page share are listed in docs/records.md:
`opening.open_shop` gives a shop, and the modules `shop`, `families`, `jobs`, `shelf`, `sheet`,
`intake`, `stages`, `runs`, `run_photos`, `measured`, `papers`, `returning`, `undo`, `backup` and
`restore` work on it. Database rows stay in here; what comes out are the records of `views`.
"""
