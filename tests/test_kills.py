"""Runs killed at random moments leave the old result or the new one; many more in benchmarks."""

from tests.benchmarks.kills import kill_changes, kill_runs


def test_results_are_whole_whenever_a_run_is_killed(tmp_path):
    told = kill_runs(tmp_path / "job", 8)
    assert told["broken"] == 0
    assert told["left by SIGTERM"] == 0
    assert told["left in the end"] == 0
    assert told["old"] + told["new"] == 8


def test_a_job_file_is_whole_whenever_a_change_is_killed(tmp_path):
    told = kill_changes(tmp_path / "job", 8)
    assert told["job.toml whole"] == 8
    assert told["job.toml broken"] + told["job.before.toml broken"] == 0
    assert told["left in the end"] == 0
