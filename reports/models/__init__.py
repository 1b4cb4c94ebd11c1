from reports.models.asks import Ask, Measure
from reports.models.concerns import FOUND, VERDICTS, Concern, ConcernStep, NoCause, Step
from reports.models.findings import Cause, Finding, ForecastEvent, ScreenRun

__all__ = [
    "FOUND",
    "VERDICTS",
    "Ask",
    "Cause",
    "Concern",
    "ConcernStep",
    "Finding",
    "ForecastEvent",
    "Measure",
    "NoCause",
    "ScreenRun",
    "Step",
]
