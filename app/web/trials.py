"""Trials: the user's own plots and ratings, what they say, and what they move."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from flask import Blueprint, Response, abort, redirect, render_template, request
from werkzeug.wrappers import Response as BaseResponse

from app.engine.errors import InputError
from app.services import knowledge_service, trials
from app.store.changed import Changed
from app.trials.trial import Trial
from app.web import trial_show
from app.web.conflict import Conflict, conflict
from app.web.security import here
from app.web.shelf import system
from app.web.show import day_words
from app.web.trial_form import Typed, choices, form_treatments, label_of, read_trial, shown, words_of

blueprint = Blueprint("trials", __name__)
Page = str | BaseResponse | tuple[str, int]
