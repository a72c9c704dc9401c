"""From a chart to two hands: plan, bass, voicings, comping, melody."""
