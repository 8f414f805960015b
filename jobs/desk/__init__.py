"""The desk: the owner's list of jobs, a job's page and the acts done from it; gathers from all rooms of the jobs."""
