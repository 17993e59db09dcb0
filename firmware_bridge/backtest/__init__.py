"""How good the estimate is: recordings with truth replayed, scored, and set beside a counter.

backtest(folder, progress) -> Report     every recording under a folder that has truth
report.text(), report.json(), report.plot()
"""

from firmware_bridge.backtest.report import Report
from firmware_bridge.backtest.runner import backtest

__all__ = ["Report", "backtest"]
