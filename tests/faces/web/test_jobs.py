"""Long work: one job for one question, stopped at once, and a fault that stays to be read."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable

import pytest

from underglass.errors import InputError
from underglass.faces.web import jobs as module
from underglass.faces.web.jobs import Job, Jobs

Progress = Callable[[float, str], None]


def ended(job: Job) -> Job:
    for _ in range(500):
        if job.done:
            return job
        time.sleep(0.01)
    raise AssertionError("the work never ended")


def test_one_question_is_one_job_and_its_answer_stays() -> None:
    jobs, runs = Jobs(), []

    def work(progress: Progress) -> int:
        runs.append(1)
        progress(0.5, "half")
        return 7

    first = jobs.ask("a", work)
    assert jobs.ask("a", work) is first
    assert ended(first).answer == 7
    assert first.share == 1.0
    assert jobs.ask("a", work) is first
    assert jobs.find("a") is first
    assert jobs.find("b") is None
    assert len(runs) == 1


def test_stopping_is_at_once_and_a_late_answer_is_thrown_away() -> None:
    jobs, go = Jobs(), threading.Event()

    def work(progress: Progress) -> int:
        go.wait(5)  # a long step that says no progress
        return 7

    job = jobs.ask("slow", work)
    jobs.stop(job)
    assert job.done
    assert job.fault == "stopped"
    go.set()
    time.sleep(0.05)
    assert job.answer is None
    assert jobs.ask("slow", work) is job, "it stays stopped until somebody asks anew"
    jobs.forget(job)
    assert ended(jobs.ask("slow", work)).answer == 7


def test_a_fault_is_shown_before_it_is_tried_anew(monkeypatch: pytest.MonkeyPatch) -> None:
    jobs = Jobs()

    def work(progress: Progress) -> int:
        raise InputError("no shelters")

    job = ended(jobs.ask("bad", work))
    assert job.fault == "no shelters"
    assert jobs.ask("bad", work) is job, "a page that is loaded again must not fail without end"
    monkeypatch.setattr(module, "RETRY_S", -1.0)
    assert jobs.ask("bad", work) is not job


def test_running_work_cannot_be_forgotten() -> None:
    jobs, go = Jobs(), threading.Event()
    job = jobs.ask("slow", lambda progress: go.wait(5))
    jobs.forget(job)
    assert jobs.find("slow") is job
    go.set()


def test_nobody_waits_for_what_takes_minutes() -> None:
    jobs, go = Jobs(), threading.Event()
    slow = jobs.ask("help", lambda progress: go.wait(5), lane="help")
    assert ended(jobs.ask("plan", lambda progress: 7)).answer == 7
    assert not slow.done
    go.set()


def test_old_answers_are_let_go() -> None:
    jobs = Jobs(most=3)
    for i in range(6):
        ended(jobs.ask(str(i), lambda progress: 1))
    jobs.ask("last", lambda progress: 1)
    assert jobs.find("0") is None
    assert jobs.find("5") is not None


def test_a_job_that_waits_for_another_says_so() -> None:
    jobs, go = Jobs(), threading.Event()
    first = jobs.ask("first", lambda progress: go.wait(5))
    second = jobs.ask("second", lambda progress: 7)
    for _ in range(500):
        if second.doing:
            break
        time.sleep(0.01)
    assert second.doing == "waiting"
    assert not first.doing
    go.set()
    assert ended(second).answer == 7


def test_every_work_begins_with_what_all_of_them_need() -> None:
    begun: list[str] = []
    jobs = Jobs(before=lambda progress: begun.append("ready"))
    assert ended(jobs.ask("a", lambda progress: begun.append("work"))).fault == ""
    assert begun == ["ready", "work"]
