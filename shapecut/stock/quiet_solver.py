"""HiGHS as the cutting plans use it."""

import highspy

__all__ = ["QuietSolver"]


class QuietSolver(highspy.Highs):
    """HiGHS on one thread, writing nothing."""

    def __init__(self) -> None:
        # Highs.__init__ also sets up callbacks, which writes a banner before it can be silenced.
        super(highspy.Highs, self).__init__()
        self.setOptionValue("output_flag", False)
        self.setOptionValue("threads", 1)
