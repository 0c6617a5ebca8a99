// What the tablet says in the language “es”; made by `manage.py messages`, not by hand.
// biome-ignore format: made by a program
export default {
 "strings": {},
 "sentences": [
  [
   "{field}: “{line}” is not ticked",
   "{field}: «{line}» no está marcado"
  ],
  [
   "{field}: {count} photo missing",
   "{field}: falta {count} foto"
  ],
  [
   "{field}: {count} photos missing",
   "{field}: faltan {count} fotos"
  ],
  [
   "{field}: missing",
   "{field}: falta"
  ],
  [
   "{field}: counts only from a lead technician or the owner",
   "{field}: solo vale si lo registra el encargado o el dueño"
  ],
  [
   "{field}: counts only from the licensed person or the owner",
   "{field}: solo vale si lo registra la persona con licencia o el dueño"
  ],
  [
   "{field}: done on revision {number}; the plan has changed, look again",
   "{field}: hecho con la revisión {number}; el plan cambió, mire otra vez"
  ],
  [
   "{field}: outside the band.",
   "{field}: fuera de los límites."
  ],
  [
   "{field}: does not match the job.",
   "{field}: no coincide con el trabajo."
  ],
  [
   "{field}: recorded twice and different: {values}. Which one is right?",
   "{field}: registrado dos veces y distinto: {values}. ¿Cuál es el correcto?"
  ],
  [
   "{field}: enter the sun and the cell temperature first ({code}).",
   "{field}: anote primero el sol y la temperatura de la celda ({code})."
  ],
  [
   "{field}: enter first what the inverter's manual says ({code}).",
   "{field}: anote primero lo que dice el manual del inversor ({code})."
  ],
  [
   "{field}: not as the manual says: inverter off, the licensed person decides.",
   "{field}: no es como dice el manual: inversor apagado, decide la persona con licencia."
  ],
  [
   "{field}: under 0.85 of what this sun should give.",
   "{field}: menos de 0.85 de lo que este sol debería dar."
  ],
  [
   "{field}: no expected value: the panel's data sheet lacks its coefficient.",
   "{field}: no hay valor esperado: a la hoja de datos del panel le falta su coeficiente."
  ],
  [
   "{field}: Negative: the pair is reversed. Stop, do not close the PV switch.",
   "{field}: Negativo: el par está invertido. Deténgase, no cierre el interruptor de los paneles."
  ],
  [
   "{field}: Not read yet.",
   "{field}: Aún sin leer."
  ],
  [
   "{field}: {what}: worked at check-in and fails now.",
   "{field}: {what}: funcionaba en la recepción y ahora falla."
  ],
  [
   "{field}: as at check-in.",
   "{field}: como en la recepción."
  ],
  [
   "{step}: this hold has not passed",
   "{step}: este punto de espera no ha pasado"
  ],
  [
   "{step} has not passed",
   "{step} no ha pasado"
  ],
  [
   "{step} is not done",
   "{step} no está hecho"
  ],
  [
   "nor have {codes}",
   "tampoco {codes}"
  ],
  [
   "nor are {codes}",
   "tampoco {codes}"
  ],
  [
   "Change order {number} waits for the customer's signature",
   "La orden de cambio {number} espera la firma del cliente"
  ],
  [
   "{name} has not read the safety lines of {letter}",
   "{name} no ha leído las líneas de seguridad de {letter}"
  ],
  [
   "{name} did the work: somebody else looks it over",
   "{name} hizo el trabajo: lo revisa otra persona"
  ],
  [
   "Batteries rest {spread} V apart; join them only within 0.05 V",
   "Las baterías en reposo difieren {spread} V; únalas solo si difieren 0.05 V o menos"
  ],
  [
   "Serial {serial} is also recorded at “{step}”",
   "El número de serie {serial} también está registrado en «{step}»"
  ],
  [
   "The technician has not signed",
   "El técnico no ha firmado"
  ],
  [
   "The owner has not signed",
   "El dueño no ha firmado"
  ],
  [
   "The licensed person has not signed",
   "La persona con licencia no ha firmado"
  ],
  [
   "The customer has not signed",
   "El cliente no ha firmado"
  ],
  [
   "Insulation of the PV leads: not enough data.",
   "Aislamiento de los cables de los paneles: faltan datos."
  ],
  [
   "{have} of {count} photos, if any",
   "{have} de {count} fotos, si hay"
  ],
  [
   "{have} of {count} photos",
   "{have} de {count} fotos"
  ],
  [
   "{have} of {count} photo, if any",
   "{have} de {count} foto, si hay"
  ],
  [
   "{have} of {count} photo",
   "{have} de {count} foto"
  ],
  [
   "{have} photos, {count} asked for",
   "{have} fotos, se pedían {count}"
  ],
  [
   "Values as built: {problem}",
   "Valores como se construyó: {problem}"
  ],
  [
   "{field}: a number is needed.",
   "{field}: se necesita un número."
  ],
  [
   "{field}: a whole number is needed.",
   "{field}: se necesita un número entero."
  ],
  [
   "{field} must be {low} to {high}.",
   "{field} debe estar entre {low} y {high}."
  ],
  [
   "{field}: nothing was written.",
   "{field}: no se escribió nada."
  ],
  [
   "{field}: nothing was ticked.",
   "{field}: no se marcó nada."
  ],
  [
   "{field}: “{line}” comes first.",
   "{field}: «{line}» va primero."
  ],
  [
   "{field}: a date like 2027-03-31 is needed.",
   "{field}: se necesita una fecha como 2027-03-31."
  ],
  [
   "{field}: a month like 2027-03 is needed.",
   "{field}: se necesita un mes como 2027-03."
  ],
  [
   "{field}: the year must be 1990 to 2100.",
   "{field}: el año debe estar entre 1990 y 2100."
  ],
  [
   "signed by {name}, typed name",
   "firmado por {name}, nombre escrito"
  ],
  [
   "signed by {name}",
   "firmado por {name}"
  ],
  [
   "{code} {title}",
   "{code} {title}"
  ],
  [
   "{head}: {tail}",
   "{head}: {tail}"
  ]
 ]
};
