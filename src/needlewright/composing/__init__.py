"""What command line and page both put together from readings, proofs and papers.

Imported by `cli` and `web` only. It hands one room's results to another as plain data; it holds
no arithmetic, no SQL, and knows neither terminal nor browser.
"""
