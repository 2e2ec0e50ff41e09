CREATE TRIGGER ledger_leg_adds_up AFTER INSERT ON ledger_leg
BEGIN
  INSERT INTO ledger_hand (id) VALUES (1);
  UPDATE ledger_runningbalance
     SET balance_ul = balance_ul + NEW.pure_ul, mass_g = mass_g + NEW.mass_g
   WHERE account_id = NEW.account_id
     AND (happened_at, position, leg_id) > (NEW.happened_at, NEW.position, NEW.id);
  INSERT INTO ledger_runningbalance (leg_id, account_id, happened_at, position, balance_ul, mass_g)
  VALUES (
    NEW.id, NEW.account_id, NEW.happened_at, NEW.position,
    NEW.pure_ul + COALESCE((SELECT r.balance_ul FROM ledger_runningbalance r
       WHERE r.account_id = NEW.account_id
         AND (r.happened_at, r.position, r.leg_id) < (NEW.happened_at, NEW.position, NEW.id)
       ORDER BY r.happened_at DESC, r.position DESC, r.leg_id DESC LIMIT 1), 0),
    NEW.mass_g + COALESCE((SELECT r.mass_g FROM ledger_runningbalance r
       WHERE r.account_id = NEW.account_id
         AND (r.happened_at, r.position, r.leg_id) < (NEW.happened_at, NEW.position, NEW.id)
       ORDER BY r.happened_at DESC, r.position DESC, r.leg_id DESC LIMIT 1), 0));
  INSERT INTO ledger_balance (account_id, balance_ul, mass_g, last_leg)
  VALUES (NEW.account_id, NEW.pure_ul, NEW.mass_g, NEW.id)
  ON CONFLICT (account_id) DO UPDATE
     SET balance_ul = balance_ul + excluded.balance_ul, mass_g = mass_g + excluded.mass_g,
         last_leg = excluded.last_leg;
  INSERT INTO ledger_accountmonth (period, account_id, stage, pure_ul, mass_g)
  VALUES (NEW.period, NEW.account_id, NEW.stage, NEW.pure_ul, NEW.mass_g)
  ON CONFLICT (account_id, period, stage) DO UPDATE
     SET pure_ul = pure_ul + excluded.pure_ul, mass_g = mass_g + excluded.mass_g;
  DELETE FROM ledger_hand;
END
