"""From settings to a recorder that is ready to run."""

from pathlib import Path

from monitor.clock import Clock
from monitor.recorder.launch import Launch
from monitor.settings import Settings


def test_a_frame_that_comes_before_there_is_a_recorder_ends_no_link(tmp_path: Path) -> None:
    """Links are opened first, and their threads wake whoever takes what they read: nobody yet.

    A link whose thread ended there was deaf for as long as the recorder ran.
    """
    settings = Settings(sound="off")
    with Launch(tmp_path / "one.journal", settings, Clock()) as launch:
        launch._wake()
