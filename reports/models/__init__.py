from reports.models.findings import Cause, Finding, ForecastEvent, ScreenRun

__all__ = ["Cause", "Finding", "ForecastEvent", "ScreenRun"]
