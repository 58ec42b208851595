"""Open a batch: plan it for the tank as it stands, and take up what the record knows. Nothing moves here."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, replace

from controller.measure.trim_history import TrimHistory
from controller.measure.tube import TubeEstimate
from controller.plan.as_json import plan_as_json
from controller.plan.batch import plan_batch
from controller.plan.steps import Plan
from controller.plan.tonight import tonight_from
from controller.record.batch_record import released_before
from controller.record.journal import Journal
from controller.record.recovery import last_batch, last_dose_id
from controller.run.image import Image
from controller.run.readings import readings_from
from controller.run.remembered import trim_history
from controller.run.remembered_tubes import remembered_tubes
from controller.run.scan import Scan
from controller.settings.values import Site

# What a level sensor cannot tell from an empty tank.
HEEL_LEAST_L = 0.5


@dataclass(frozen=True, slots=True)
class Opening:
    """A batch that may begin: its plan, its number, its first dose id, and what earlier nights taught."""

    plan: Plan
    batch: int
    first_dose_id: int
    history: TrimHistory
    tubes: Mapping[str, TubeEstimate]

    def lay(self, scan: Scan) -> None:
        """Lay the plan ready for START."""
        text = json.dumps(plan_as_json(self.plan))
        scan.load(self.plan, text, self.batch, self.first_dose_id, self.history, self.tubes)


def plan_for_the_tank(site: Site, recipe: str, image: Image) -> Plan:
    """Plan for the heel that the rig shows; raises PlanRefused when a rule stands against it."""
    level_l = readings_from(image, site.rig, None).level_l or 0.0
    heel_l = round(level_l, 1) if level_l >= HEEL_LEAST_L else 0.0
    return plan_batch(site, recipe, replace(tonight_from(site), heel_l=heel_l))


def open_batch(site: Site, plan: Plan, journal: Journal) -> Opening:
    """Number the batch and its doses after all that the record holds; raises RecordFault."""
    last = last_batch(journal)
    return Opening(
        plan=plan,
        batch=1 if last is None else last.started.event.batch + 1,
        first_dose_id=last_dose_id(journal) + 1,
        history=trim_history(released_before(journal.path, plan.recipe), site, site.recipes[plan.recipe]),
        tubes=remembered_tubes(journal, site),
    )
