"""The flows: `order` tells the order of the stages; `weekly` runs it under Prefect's eyes."""

from pipeline.flows.look import look
from pipeline.flows.order import Workplace, load, load_register, prepare, publish, refresh
from pipeline.flows.weekly import Week, weekly

__all__ = [
    "Week",
    "Workplace",
    "load",
    "load_register",
    "look",
    "prepare",
    "publish",
    "refresh",
    "weekly",
]
