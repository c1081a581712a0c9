"""What to read next, what to shoot again, and what readings taken or planned can prove."""
