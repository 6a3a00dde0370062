// The sign-in page: {% module "js/pages/signed_out.js" %}. Whoever takes the phone next finds nothing of the one before.
import { forgetPerson } from "../behaviours/phone_person.js";

void forgetPerson();
