"""The tables of a limit file, each with the checks it can make by itself."""
