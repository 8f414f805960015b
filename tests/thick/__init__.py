"""A studio of five busy years, beside the demo: `fill` makes it, `bench` measures every page of both."""
