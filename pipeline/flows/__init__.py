"""The flows: `order` tells the order of the stages; `weekly` runs it under Prefect's eyes."""

from pipeline.flows.loading import load, load_register
from pipeline.flows.look import look
from pipeline.flows.order import Workplace, prepare, refresh, refresh_stale
from pipeline.flows.publishing import publish
from pipeline.flows.sending import Sent, choose_recipients, keep_letters, send_letters
from pipeline.flows.settling import Applied, apply_review, export_review, undo_settlement
from pipeline.flows.weekly import Week, weekly

__all__ = [
    "Applied",
    "Sent",
    "Week",
    "Workplace",
    "apply_review",
    "choose_recipients",
    "export_review",
    "keep_letters",
    "load",
    "load_register",
    "look",
    "prepare",
    "publish",
    "refresh",
    "refresh_stale",
    "send_letters",
    "undo_settlement",
    "weekly",
]
