"""The job file `job.toml`: everything a person decides, read into a checked model."""
