"""One question of the practitioner each: data in, data out; nothing here prints."""
