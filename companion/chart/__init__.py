"""What is on the stand: the chart's model, and one file a format."""
