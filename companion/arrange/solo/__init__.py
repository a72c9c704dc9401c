"""The companion's own improvised line."""
