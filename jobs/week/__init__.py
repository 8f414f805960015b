"""The week: what all jobs ask of one set of hands, the plan that is kept of it, its page, its feed and its promises."""
