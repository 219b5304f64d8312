"""The command line ``fold-mdo``: parse, call, print."""
