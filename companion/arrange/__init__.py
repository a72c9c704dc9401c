"""From a chart to two hands: order of events, plan, treatments, and the parts that come of them."""
