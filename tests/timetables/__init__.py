"""How good the bench's timetables are: random orders, against a bound and plain first-come."""
