from django.apps import AppConfig


class JobsConfig(AppConfig):
    name = "jobs"
    label = "jobs"
    verbose_name = "The jobs"

    def ready(self) -> None:
        from jobs import database_rules  # noqa: F401  (the room's rules register themselves)
        from jobs.looking_back.recall import touched_by
        from jobs.work.clock import alarms
        from jobs.work.in_doubt import tickets_touched_by
        from jobs.work.late_clocks import start_clocks_of_runs
        from jobs.work.taken_lately import taken_on_the_bench
        from jobs.work.waste_sources import RUNS
        from studio.house.frame import ALARMS
        from studio.stockroom.counts.counting import TAKEN_BEFORE_IT_IS_POSTED
        from studio.stockroom.lots.keeping import TOUCHED_BY_LOT
        from studio.stockroom.materials import AFTER_SAVING, TOUCHED_BY
        from studio.stockroom.waste.sources import SOURCES

        if tickets_touched_by not in TOUCHED_BY:
            TOUCHED_BY.append(tickets_touched_by)
            AFTER_SAVING.insert(0, start_clocks_of_runs)  # runs are locked before lots, as where a run is finished
        if touched_by not in TOUCHED_BY_LOT:
            TOUCHED_BY_LOT.append(touched_by)
        if alarms not in ALARMS:
            ALARMS.append(alarms)
        if RUNS not in SOURCES:
            SOURCES.append(RUNS)
        if taken_on_the_bench not in TAKEN_BEFORE_IT_IS_POSTED:
            TAKEN_BEFORE_IT_IS_POSTED.append(taken_on_the_bench)
