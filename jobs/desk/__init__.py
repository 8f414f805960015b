"""The desk: the owner's list of jobs and a job's page, which gather from the other rooms of the jobs."""
