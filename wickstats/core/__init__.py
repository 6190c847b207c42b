"""What every other package leans on: problems, results, units, JSON and words."""
