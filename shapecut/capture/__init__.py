"""From files to pixels, EXIF facts and card marks; alone knows picture formats and fiducials."""
