from reports.models.concerns import FOUND, VERDICTS, Concern, ConcernStep, NoCause, Step
from reports.models.findings import Cause, Finding, ForecastEvent, ScreenRun

__all__ = [
    "FOUND",
    "VERDICTS",
    "Cause",
    "Concern",
    "ConcernStep",
    "Finding",
    "ForecastEvent",
    "NoCause",
    "ScreenRun",
    "Step",
]
