"""The companion's improvised line."""
