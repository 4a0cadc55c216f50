"""The flows: `order` tells the order of the stages; `weekly` runs it under Prefect's eyes."""

from pipeline.flows.loading import load, load_register
from pipeline.flows.look import look
from pipeline.flows.order import Workplace, prepare, publish, refresh, refresh_stale
from pipeline.flows.sending import Sent, choose_recipients, keep_letters, send_letters
from pipeline.flows.weekly import Week, weekly

__all__ = [
    "Sent",
    "Week",
    "Workplace",
    "choose_recipients",
    "keep_letters",
    "load",
    "load_register",
    "look",
    "prepare",
    "publish",
    "refresh",
    "refresh_stale",
    "send_letters",
    "weekly",
]
