"""Who works with the fleet: invited, given a role, ended, erased; every act is kept under seal."""
