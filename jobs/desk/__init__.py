"""The desk: the owner's list of jobs and a job's page, and what is done from it. Gathers from all rooms of the jobs."""
