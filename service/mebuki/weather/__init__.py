"""Open weather data in: one file a provider; joining, gaps, plausibility."""
