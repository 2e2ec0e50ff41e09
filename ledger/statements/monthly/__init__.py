"""What a month's account says beside its lines by stage: by place, how its figures are known, the months before it."""
