"""The page on one's own machine: describe, bench, decide; the folder's files are the truth."""
