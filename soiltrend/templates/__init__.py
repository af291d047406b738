"""Templates of the files of a garden."""
