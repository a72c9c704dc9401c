"""The old place of :mod:`companion.messages`."""

from companion.messages import Beat, Heard, Order, Report, State, Step, Wish

__all__ = ["Beat", "Heard", "Order", "Report", "State", "Step", "Wish"]
