"""Law by machine: the laws hold as well with rotors that are turned back after each whole dose."""

from desk import BOOT_ID
from hypothesis import strategies as st
from hypothesis.stateful import invariant, rule
from test_board_stateful import STEP_MS, BoardMachine

from controller.run.request import Request


class AntiDripMachine(BoardMachine):
    """What is broken off may be told as moved, a few counts each time, and never as not moved."""

    anti_drip = (5, 2, 16)

    def books_agree(self, told, moved):
        assert moved <= told <= moved + max(self.anti_drip) * (self.hal.cuts + self.boot - BOOT_ID)

    @rule(step=st.sampled_from([1, 1, 1, 0]), channel=st.integers(0, 2), ms=st.sampled_from([20, 100, 300]))
    def the_host_doses_a_little(self, step, channel, ms):
        self.a_person_mends_and_presses_reset()
        wish = Request(dose=self._dose(step, channel=channel, target=30))
        for _ in range(ms // STEP_MS):
            self.link.write(wish)
            self._pass_time(STEP_MS)

    @invariant()
    def no_rotor_is_believed_further_back_than_it_stands(self):
        self.node.pumps.advance()
        for channel, back in enumerate(self.node.pumps.anti_drip.back):
            assert back <= self.furthest.get(channel, 0) - self.hal.at.get(channel, 0)

    @rule(step=st.sampled_from([1, 1, 0]), channel=st.integers(0, 2))
    def the_host_doses_whole(self, step, channel):
        self.a_person_mends_and_presses_reset()
        wish = Request(dose=self._dose(step, channel=channel, target=30))
        for _ in range(400 // STEP_MS):
            self.link.write(wish)
            self._pass_time(STEP_MS)
        motion = self.node.pumps
        if motion.done == motion.target and not motion.spoiled and self.node.guard.armed:
            assert not motion.running

    @invariant()
    def nothing_turns_back_but_by_its_few_counts(self):
        for channel, count, _ in self.hal.backs:
            assert count == self.anti_drip[channel]


AntiDripMachine.TestCase.settings = BoardMachine.TestCase.settings
test_whatever_happens_the_laws_hold_with_rotors_that_turn_back = AntiDripMachine.TestCase
