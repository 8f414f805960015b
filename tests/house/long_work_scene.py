"""A scene for workers that are killed: `python -m tests.house.long_work_scene ACT WHERE [AFTER]`.

furnish         a studio and a piece of work that notes once that it was done; prints its number
work WHERE      a worker; the work prints "ready" and waits for a line where it is to be killed: in the `middle` of it,
                or `writing`, inside the transaction that ends it. AFTER: the worker that is known to have ended
"""

from __future__ import annotations

import sys


def _register(where: str) -> None:
    from studio.house.changes import note_change
    from studio.house.long_work.kinds import Came, Course, Inputs, Kind, register
    from studio.kit.roles import May

    def waits(here: str) -> None:
        if here == where:
            print("ready", flush=True)
            sys.stdin.readline()

    def do(course: Course, inputs: Inputs) -> Came:
        course.at(0, 2, "begun")
        waits("middle")
        course.at(1, 2, "half")
        written = course.folder / "result"
        written.write_text("done")
        return Came(said="Done.", file=written, name="result.csv", media_type="text/csv", also=also)

    def also() -> None:
        note_change("settings", "Killed", "done")
        waits("writing")

    register(Kind(name="killed", title=lambda inputs: "Killed", needs=May.STUDIO, do=do))


def furnish() -> None:
    from studio.house.long_work.asking import ask
    from tests import builders

    _register("")
    builders.house()
    print(ask(kind="killed", inputs={}, by=builders.person("maud", "owner")).pk)


def work(where: str, after: str) -> None:
    from django.core.management import call_command

    _register(where)
    call_command("long_work", "--all", "--name", f"{where}-worker", *(["--after", after] if after else []))
    print("ended")


def told() -> None:
    from studio.house.long_work.files import file_of, home
    from studio.house.models import ChangeRecord, LongWork

    row = LongWork.objects.get()
    file = file_of(row).read_text() if row.has_file else "-"
    times = ChangeRecord.objects.filter(subject="Killed").count()
    print(row.state.replace(" ", "-"), row.attempt, row.broke_off, times, file, len(list(home().iterdir())))


if __name__ == "__main__":
    import django

    django.setup()
    act, more = sys.argv[1], sys.argv[2:]
    if act == "furnish":
        furnish()
    elif act == "told":
        told()
    else:
        work(more[0], more[1] if more[1:] else "")
