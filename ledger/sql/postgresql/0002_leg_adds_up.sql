CREATE OR REPLACE FUNCTION ledger_leg_adds_up() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE
  before_ul bigint := 0;
  before_g bigint := 0;
BEGIN
  UPDATE ledger_runningbalance
     SET balance_ul = balance_ul + NEW.pure_ul, mass_g = mass_g + NEW.mass_g
   WHERE account_id = NEW.account_id
     AND (happened_at, position, leg_id) > (NEW.happened_at, NEW.position, NEW.id);
  SELECT r.balance_ul, r.mass_g INTO before_ul, before_g FROM ledger_runningbalance r
   WHERE r.account_id = NEW.account_id
     AND (r.happened_at, r.position, r.leg_id) < (NEW.happened_at, NEW.position, NEW.id)
   ORDER BY r.happened_at DESC, r.position DESC, r.leg_id DESC LIMIT 1;
  INSERT INTO ledger_runningbalance (leg_id, account_id, happened_at, position, balance_ul, mass_g)
  VALUES (NEW.id, NEW.account_id, NEW.happened_at, NEW.position,
          COALESCE(before_ul, 0) + NEW.pure_ul, COALESCE(before_g, 0) + NEW.mass_g);
  INSERT INTO ledger_balance AS b (account_id, balance_ul, mass_g, last_leg)
  VALUES (NEW.account_id, NEW.pure_ul, NEW.mass_g, NEW.id)
  ON CONFLICT (account_id) DO UPDATE
     SET balance_ul = b.balance_ul + excluded.balance_ul, mass_g = b.mass_g + excluded.mass_g,
         last_leg = excluded.last_leg;
  INSERT INTO ledger_accountmonth AS m (period, account_id, stage, pure_ul, mass_g)
  VALUES (NEW.period, NEW.account_id, NEW.stage, NEW.pure_ul, NEW.mass_g)
  ON CONFLICT (account_id, period, stage) DO UPDATE
     SET pure_ul = m.pure_ul + excluded.pure_ul, mass_g = m.mass_g + excluded.mass_g;
  RETURN NULL;
END $$
-- next
CREATE TRIGGER ledger_leg_adds_up AFTER INSERT ON ledger_leg
FOR EACH ROW EXECUTE FUNCTION ledger_leg_adds_up()
