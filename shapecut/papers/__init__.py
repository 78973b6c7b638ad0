"""From any result to the files a person uses; alone knows file formats and page sizes."""
