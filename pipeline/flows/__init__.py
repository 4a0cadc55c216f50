"""The flows: `order` tells the order of the stages; `weekly` runs it under Prefect's eyes."""

from pipeline.flows.judging import Places
from pipeline.flows.loading import load, load_register
from pipeline.flows.look import look
from pipeline.flows.order import Workplace, prepare, refresh, refresh_stale
from pipeline.flows.publishing import is_missed, publish
from pipeline.flows.sending import (
    Sent,
    choose_readers,
    choose_recipients,
    keep_letters,
    send_letters,
)
from pipeline.flows.serving import Answer, Errand, Post, Signals, keep_serving
from pipeline.flows.settling import Applied, apply_review, export_review, undo_settlement
from pipeline.flows.weekly import Watched, Week, weekly

__all__ = [
    "Answer",
    "Applied",
    "Errand",
    "Places",
    "Post",
    "Sent",
    "Signals",
    "Watched",
    "Week",
    "Workplace",
    "apply_review",
    "choose_readers",
    "choose_recipients",
    "export_review",
    "is_missed",
    "keep_letters",
    "keep_serving",
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
