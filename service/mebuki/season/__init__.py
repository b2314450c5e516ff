"""The science: series in, series, dates and probabilities out; every function cites its source."""
