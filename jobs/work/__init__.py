"""The work on a job from enquiry to delivery: its states, and what its runs leave; neither pages nor prices enter."""
