"""Virtual packs: wearers, cylinders, electronics and radio, in virtual time from one seed."""
