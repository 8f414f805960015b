"""The desk: the owner's list of jobs and a job's page, and what is done from it; gathers from all other rooms of the jobs."""
